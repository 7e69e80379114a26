"""Fields that have another shape outside than one column each: errors about them stand where the sender wrote them."""

from couplings.services.renaming import named

__all__ = ["named"]
