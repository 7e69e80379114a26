"""Files that people sent, sent back: told to be nothing but what they are, and kept by nobody in between."""

from django.http import HttpResponse


def as_jpeg(content: bytes, digest: str) -> HttpResponse:
    """An image that was written anew here; its name says which it is and nothing else."""
    answer = HttpResponse(content, content_type="image/jpeg")
    answer["Content-Disposition"] = f'inline; filename="photo-{digest[:12]}.jpg"'
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Cache-Control"] = "private, max-age=86400"
    return answer
