"""The site's settings for a test run: a data folder of its own, and nothing from the shell but the services.

A test must never touch the plant's record, whatever ASLEFT_DATA says in the shell it was started from.
"""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

_MARK = "asleft-tests-"

if not Path(os.environ.get("ASLEFT_DATA", "")).name.startswith(_MARK):
    # A process that a test starts with this environment inherits the folder and leaves it in place.
    for _name in [name for name in os.environ if name.startswith("ASLEFT_")]:
        del os.environ[_name]
    os.environ["ASLEFT_DATA"] = tempfile.mkdtemp(prefix=_MARK)
    atexit.register(shutil.rmtree, os.environ["ASLEFT_DATA"], ignore_errors=True)

from plant.settings import *  # noqa: E402, F403
from plant.settings import DATA, DATABASES, INSTALLED_APPS, MIDDLEWARE  # noqa: E402

if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, because threads share no memory database under its real locking.
    DATABASES["default"]["TEST"] = {"NAME": DATA / "test.sqlite3"}

# The passwords of the cast need not be slow to guess.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

# Files as they lie in the apps: the manifest is for the site, `start` is tested with it.
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True
(DATA / "static").mkdir(exist_ok=True)

# A page that asks the database once per row is refused, with the line that did it.
INSTALLED_APPS = [*INSTALLED_APPS, "zeal"]
MIDDLEWARE = ["zeal.middleware.zeal_middleware", *MIDDLEWARE]
ZEAL_RAISE = True
# Signing out reads the session once to know it and once to delete it, in Django's own code.
ZEAL_ALLOWLIST = [{"model": "sessions.Session", "field": "*"}]
