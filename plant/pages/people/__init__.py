"""Pages about people: who works at a site, how they come in, and how they leave."""
