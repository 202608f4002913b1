"""What is handed from room to room: tables, recordings, estimates, results, and how their numbers are written."""
