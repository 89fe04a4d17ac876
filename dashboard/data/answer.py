"""One answer to a request, whatever makes it: the pages before the app, or a download."""

from dataclasses import dataclass, field

CSV = "text/csv; charset=utf-8"


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer: its status, its bytes, their kind, and headers besides."""

    status: int
    body: bytes = b""
    kind: str = "text/plain; charset=utf-8"
    headers: tuple[tuple[str, str], ...] = field(default=())
