"""`gearfit watch`: the report is written anew whenever a file of the ride folder has changed."""
