"""Pages of data sheets, couplings and fits."""
