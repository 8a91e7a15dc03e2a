"""Takes in a job folder: kept, recorded, recovered after a crash, brought from elsewhere."""
