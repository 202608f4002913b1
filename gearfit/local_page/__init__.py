"""`gearfit open`: the whole job in a browser, on this machine alone; works on plain ride folders."""
