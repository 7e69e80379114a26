"""Questions to the record of visits; rows that print without asking again."""
