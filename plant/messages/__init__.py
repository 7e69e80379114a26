"""What leaves for other programs: events in lanes, signed, guarded, at least once and in order per coupling."""
