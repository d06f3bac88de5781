"""What phones and browsers open: the feed, the pages, the answers, and who may."""
