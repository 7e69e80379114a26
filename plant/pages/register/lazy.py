"""Words of a registry that is filled at the start, said in each reader's language."""

from typing import cast

from django.utils.translation import gettext_lazy


def lazily(text: str) -> str:
    """The text, translated when it is printed. Import it as `_`, so that the texts are found."""
    return cast(str, gettext_lazy(text))
