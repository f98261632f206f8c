"""One module for each migration. What has been released is never edited."""
