"""The administration of the register: what has no page of its own."""

from plant.admin import journal, people, register, units, webhooks  # noqa: F401
