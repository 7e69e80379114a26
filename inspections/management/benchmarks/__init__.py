"""What `manage.py benchmark` measures, a module per subject."""
