"""The invented plant of `manage.py demo`: two sites, their people, couplings and what was done to them.

Everything is entered through the services that the crew's own pages call, each act at its own instant. Nothing here is
a real person, company, plant or product.
"""
