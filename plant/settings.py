"""Every setting of the site in one file; what differs from place to place comes from the environment.

README.md lists the variables. The readers are strict: a name or a value they do not know stops the start with a
sentence, because a misspelt ASLEFT_HTTPS that is silently ignored is a site without it.
"""

import os
from datetime import timedelta

from plant import environment
from plant.logging import logging_for

BASE_DIR = environment.BASE_DIR
LOOPBACK = ["localhost", "127.0.0.1", "[::1]"]

# What the environment decides

environment.refuse_unknown(os.environ)
DATA = environment.data_folder(os.environ)
SECRET_KEY = environment.secret_key(os.environ, DATA)
DEBUG = environment.flag(os.environ, "ASLEFT_DEBUG")
HTTPS = environment.flag(os.environ, "ASLEFT_HTTPS")
# Messages to other programs go over https; plain http is for trying a receiver on one machine.
WEBHOOK_HTTP = environment.flag(os.environ, "ASLEFT_WEBHOOK_HTTP")
HOSTS = environment.names(os.environ, "ASLEFT_HOSTS")
# Health checks ask from the machine itself, whatever name the site has outside.
ALLOWED_HOSTS = HOSTS + LOOPBACK
CSRF_TRUSTED_ORIGINS = environment.origins(os.environ, "ASLEFT_ORIGINS")
DATABASES = {"default": environment.database(os.environ.get("DATABASE_URL", ""), DATA)}
CELERY_BROKER_URL = environment.broker(os.environ.get("CELERY_BROKER_URL", ""))

# Mail: without a server for it, pages say "copy the link"

MAIL = environment.mail(os.environ.get("ASLEFT_MAIL_URL", ""), os.environ.get("ASLEFT_MAIL_FROM", ""))
MAIL_ON = bool(MAIL)
EMAIL_BACKEND = MAIL.get("backend", "django.core.mail.backends.dummy.EmailBackend")
EMAIL_HOST, EMAIL_PORT = MAIL.get("host", ""), MAIL.get("port", 25)
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = MAIL.get("user", ""), MAIL.get("password", "")
EMAIL_USE_TLS, EMAIL_USE_SSL = MAIL.get("starttls", False), MAIL.get("tls", False)
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = MAIL.get("from", "asleft@localhost")

# Django

ROOT_URLCONF = "plant.urls"
WSGI_APPLICATION = "plant.wsgi.application"
AUTH_USER_MODEL = "plant.Person"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
INSTALLED_APPS = [
    "plant.apps.PlantConfig",
    "couplings.apps.CouplingsConfig",
    "inspections.apps.InspectionsConfig",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    # Before staticfiles, so that runserver serves files the same way as gunicorn does.
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "template_partials",
    "django_htmx",
    "simple_history",
    "axes",
    "csp",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "drf_standardized_errors",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "plant.pages.people.language.PersonsLanguage",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "plant.pages.refusals.RefusalMiddleware",
    # Last, as its documentation asks: it turns a locked sign-in into its answer.
    "axes.middleware.AxesMiddleware",
]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "plant.pages.context.sheet",
            ],
        },
    }
]
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English")]
USE_I18N = True
# Instants are stored in UTC; a site's own zone decides its days.
USE_TZ = True
TIME_ZONE = "UTC"
LOGGING = logging_for(human=DEBUG)

# Files

STATIC_URL = "/static/"
STATIC_ROOT = DATA / "static"
MEDIA_ROOT = DATA / "media"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = DEBUG
FILE_UPLOAD_PERMISSIONS = 0o600

# Signing in

LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "start"
LOGOUT_REDIRECT_URL = "sign-in"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "plant.backends.PersonBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
# Name and address together: a stranger at another address cannot lock a mechanic out.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_VERBOSE = False
AXES_LOCKOUT_CALLABLE = "plant.pages.people.locked.locked"

# What a browser may do with our pages

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "font-src": ["'self'"],
        "connect-src": ["'self'"],
        "manifest-src": ["'self'"],
        "form-action": ["'self'"],
        "frame-ancestors": ["'none'"],
        "base-uri": ["'none'"],
        "object-src": ["'none'"],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_AGE = 14 * 24 * 3600
SECURE_SSL_REDIRECT = HTTPS
SECURE_REDIRECT_EXEMPT = [r"^livez$", r"^readyz$"]
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if HTTPS else 0
# gunicorn speaks plain HTTP, so HTTPS means a proxy in front, which must set this header itself.
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS else None
# Subdomains and browsers' preload lists are the domain owner's to decide; a plant's site is one host in it.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

# API

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "plant.api.authentication.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["plant.api.parsers.JsonBody"],
    "DEFAULT_SCHEMA_CLASS": "plant.api.schema.Schema",
    "EXCEPTION_HANDLER": "plant.api.problems.handler",
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Asleft",
    "DESCRIPTION": "The maintenance record of shaft couplings, and when the crew comes back.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "SCHEMA_PATH_PREFIX": r"/api/v1",
    "COMPONENT_SPLIT_REQUEST": True,
    "POSTPROCESSING_HOOKS": ["drf_spectacular.hooks.postprocess_schema_enums", "plant.api.schema.complete"],
    "ENUM_NAME_OVERRIDES": {
        "MembershipRole": "plant.models.Membership.Role",
        "MachineRole": "plant.models.Machine.Role",
        "TrainService": "plant.models.Train.Service",
        "PersonKind": "plant.models.Person.Kind",
        "VisitKind": "inspections.models.Visit.Kind",
        "VisitState": "inspections.models.Visit.State",
        "WorkOrderState": "inspections.models.WorkOrder.State",
        "FamilyKind": "couplings.models.Family.Kind",
        "InstrumentKind": "couplings.models.Instrument.Kind",
        "CheckKind": "inspections.models.CheckKind",
        "FlagKind": "inspections.models.Flag.Kind",
        "ElementWent": "couplings.models.Element.Went",
        "HubOrientation": "couplings.models.HubHalf.Orientation",
        "CouplingSide": "couplings.models.HubHalf.Side",
        "RunOutTable": "plant.models.Site.RunOutTable",
        "SupportMaterial": "plant.models.Site.SupportMaterial",
    },
}

# Jobs: the rows say what is due, the queue only wakes us (no results, no long countdowns, one task in hand)

CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_TIME_LIMIT = 120
CELERY_TASK_STORE_EAGER_RESULT = False
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {"visibility_timeout": 300, "socket_connect_timeout": 2}
CELERY_TIMEZONE = "UTC"
# After every tick, so that the age of its schedule file says whether beat is alive.
CELERY_BEAT_SYNC_EVERY = 1
CELERY_BEAT_SCHEDULE = {"tick": {"task": "plant.tick", "schedule": 60.0, "options": {"expires": 55}}}
