"""What leaves for others: mail; and for programs events in lanes, signed, guarded, in order per coupling."""
