"""Pages of the register: plain links and forms first, better with htmx."""
