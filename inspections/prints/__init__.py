"""What the crew carries and what the plant files: certificate, job card, labels."""

from inspections.prints.certificate import certificate
from inspections.prints.jobcard import job_cards
from inspections.prints.labels import labels

__all__ = ["certificate", "job_cards", "labels"]
