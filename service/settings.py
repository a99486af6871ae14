"""Settings of the service: name, default, help in one table; the environment overrides the default."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from ipaddress import ip_address
from typing import Any

PREFIX = "QUARTERTURN_"


def _row(default: Any, help: str) -> Any:
    return field(default=default, metadata={"help": help})


@dataclass(frozen=True)
class Settings:
    """How the service behaves. QUARTERTURN_<NAME> in the environment sets each; lists are comma-separated."""

    host: str = _row("127.0.0.1", "address to listen at")
    port: int = _row(8417, "port to listen at; 0 takes a free one")
    token: str = _row("", "secret every request must carry; needed to listen beyond this machine")
    names: tuple[str, ...] = _row((), "further names (or name:port) the Host header may carry")
    origins: tuple[str, ...] = _row(
        (), "web origins that may use the service from a page, e.g. http://localhost:3000"
    )
    body_bytes: int = _row(65536, "longest body that is read, bytes")
    depth: int = _row(24, "deepest nesting of JSON that is read")
    read_seconds: float = _row(10.0, "time for a client to send its headers, then its body, s")
    rate: float = _row(
        0.0, "requests per second and client, in the long run; 0 = 5000 on this machine, 50 beyond"
    )
    burst: float = _row(0.0, "requests at once per client; 0 = four seconds' worth")
    workers: int = _row(2, "solver threads; those beyond the first step in when an answer takes long")
    queue: int = _row(256, "requests that may wait for a solver thread; more are told to come back")
    answer_seconds: float = _row(20.0, "time for one answer, s; then it is given up")
    streams: int = _row(64, "open event streams")
    connections: int = _row(600, "open connections")
    stop_seconds: float = _row(5.0, "time for answers under way when stopping, s")
    log: bool = _row(True, "one JSON line per request on stderr")

    @property
    def local(self) -> bool:
        """Whether only this machine can reach the service."""
        return is_loopback(self.host)

    def per_second(self) -> float:
        """Requests per second and client."""
        return self.rate or (5000.0 if self.local else 50.0)

    def at_once(self) -> float:
        """Requests at once per client."""
        return self.burst or 4.0 * self.per_second()


def is_loopback(host: str) -> bool:
    """Whether an address or name is this machine only."""
    if host.lower() == "localhost":
        return True
    try:
        return ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def from_environment(environment: Mapping[str, str], **given: Any) -> Settings:
    """Settings from the environment, then `given` (None = not given). ValueError names the variable."""
    values: dict[str, Any] = {}
    for row in fields(Settings):
        name = PREFIX + row.name.upper()
        if name in environment:
            values[row.name] = _parse(name, environment[name], row.default)
    values |= {key: value for key, value in given.items() if value is not None}
    settings = replace(Settings(), **values)
    _check(settings)
    return settings


def _parse(name: str, text: str, default: Any) -> Any:
    if isinstance(default, bool):
        if text.lower() not in ("1", "0", "yes", "no", "true", "false"):
            raise ValueError(f"{name} is {text!r}, allowed: yes or no")
        return text.lower() in ("1", "yes", "true")
    if isinstance(default, tuple):
        return tuple(part.strip() for part in text.split(",") if part.strip())
    if isinstance(default, str):
        return text
    try:
        return type(default)(text)
    except ValueError:
        raise ValueError(f"{name} is {text!r}, allowed: a number") from None


def _check(settings: Settings) -> None:
    if not 0 <= settings.port <= 65535:
        raise ValueError(f"port is {settings.port}, allowed: 0 to 65535")
    if not settings.local and len(settings.token) < 16:
        raise ValueError(
            f"to listen at {settings.host}, beyond this machine, set {PREFIX}TOKEN to 16 letters or more"
        )
    if not settings.token.isascii():
        raise ValueError(f"{PREFIX}TOKEN may only hold ASCII letters, digits and signs")
    if "*" in settings.origins:
        raise ValueError(f"{PREFIX}ORIGINS is *, allowed: the origins by name, such as http://localhost:3000")
    for name in (
        "body_bytes",
        "depth",
        "read_seconds",
        "answer_seconds",
        "workers",
        "queue",
        "streams",
        "connections",
    ):
        if getattr(settings, name) <= 0:
            raise ValueError(f"{PREFIX}{name.upper()} is {getattr(settings, name)}, allowed: above 0")
