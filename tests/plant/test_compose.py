"""The full set, read as text: no container engine is needed to see that it agrees with the site."""

import re
import shlex
from pathlib import Path

import pytest
import yaml
from django.conf import settings

from plant import environment as site
from plant.celery import app

FOLDER = Path(settings.BASE_DIR)
COMPOSE = yaml.safe_load((FOLDER / "docker-compose.yml").read_text())
SERVICES = COMPOSE["services"]
STAY = ["web", "worker", "beat", "db", "redis"]


def filled(text, **values):
    """Put values where the compose file asks for variables, as the container engine does."""

    def value(found):
        name, default = found["name"], found["default"] or ""
        return values.get(name, default)

    return re.sub(r"\$\{(?P<name>\w+)(?::(?:-(?P<default>[^}]*)|\?[^}]*))?\}", value, text)


def test_every_service_is_there_and_nothing_else():
    assert sorted(SERVICES) == sorted([*STAY, "prepare"])


@pytest.mark.parametrize("name", STAY)
def test_service_that_stays_has_a_health_check_and_comes_back(name):
    assert SERVICES[name]["healthcheck"]["test"]
    assert SERVICES[name]["restart"] == "unless-stopped"


@pytest.mark.parametrize("name", ["web", "worker", "beat"])
def test_web_worker_and_beat_are_one_image_and_wait_for_migrations(name):
    assert SERVICES[name]["image"] == SERVICES["prepare"]["image"]
    assert SERVICES[name]["environment"] == SERVICES["prepare"]["environment"]
    assert SERVICES[name]["depends_on"]["prepare"] == {"condition": "service_completed_successfully"}


def test_no_secret_has_a_default():
    text = (FOLDER / "docker-compose.yml").read_text()
    for name in ("ASLEFT_SECRET_KEY", "POSTGRES_PASSWORD"):
        assert f"${{{name}:?" in text
        assert f"${{{name}:-" not in text
        assert f"${{{name}}}" not in text


def test_environment_of_the_set_is_one_that_the_settings_read(tmp_path):
    given = {
        name: filled(value, ASLEFT_SECRET_KEY="k" * 50, ASLEFT_HOSTS="plant.example", POSTGRES_PASSWORD="secret")
        for name, value in SERVICES["web"]["environment"].items()
    }
    site.refuse_unknown(given)
    assert site.flag(given, "ASLEFT_HTTPS") is True
    assert site.names(given, "ASLEFT_HOSTS") == ["plant.example"]
    assert site.secret_key(given, tmp_path) == "k" * 50
    database = site.database(given["DATABASE_URL"], tmp_path)
    assert (database["HOST"], database["USER"], database["PASSWORD"]) == ("db", "asleft", "secret")
    assert SERVICES["db"]["environment"]["POSTGRES_DB"] == database["NAME"]
    assert site.broker(given["CELERY_BROKER_URL"]) == "redis://redis:6379/0"


def test_queue_keeps_what_it_accepted():
    command = shlex.join(SERVICES["redis"]["command"])
    assert "--appendonly yes" in command
    assert "--maxmemory-policy noeviction" in command


def test_web_is_published_to_this_machine_only():
    assert all(port.startswith("127.0.0.1:") for port in SERVICES["web"]["ports"])


def test_there_is_one_beat_with_one_entry_that_expires():
    assert "deploy" not in SERVICES["beat"]
    (entry,) = settings.CELERY_BEAT_SCHEDULE.values()
    assert entry["options"]["expires"] < entry["schedule"]


def test_beat_names_a_task_that_the_worker_knows():
    app.loader.import_default_modules()
    assert {entry["task"] for entry in settings.CELERY_BEAT_SCHEDULE.values()} <= set(app.tasks)


def test_dockerfile_copies_what_the_site_is_made_of():
    text = (FOLDER / ".ci" / "Dockerfile").read_text()
    for folder in ("plant", "couplings", "inspections", "fixtures"):
        assert f"COPY {folder} {folder}" in text
    assert "USER asleft" in text
