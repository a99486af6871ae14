"""What every request passes before a route sees it: host, rate, token, origin; and what every answer carries.

The order matters: a page that reached us by DNS rebinding is told nothing else; a preflight carries no token.
"""

import hmac
from collections import OrderedDict
from collections.abc import Mapping
from functools import lru_cache
from ipaddress import IPv6Address, ip_address, ip_network
from time import monotonic, perf_counter

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.errors import Problem, problem_of
from service.records import Records
from service.settings import Settings, is_loopback

Headers = Mapping[bytes, bytes]
ALWAYS = ((b"x-content-type-options", b"nosniff"), (b"cache-control", b"no-store"))
LOOPBACK_NAMES = ("127.0.0.1", "localhost", "[::1]")
CLIENTS = 4096
"""Clients whose request rate is remembered; the one longest silent is forgotten first."""


class Guard:
    """ASGI middleware: refuses what must not reach a route, adds headers, records every request."""

    def __init__(self, app: ASGIApp, settings: Settings, records: Records) -> None:
        self.app, self.settings, self.records = app, settings, records
        self.buckets = Buckets(settings.per_second(), settings.at_once())

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = scope["quarterturn.headers"] = dict(scope["headers"])
        started, status, extra = perf_counter(), 0, ALWAYS + self._cors(headers)

        async def sending(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message["headers"] = [*message.get("headers", ()), *extra]
            await send(message)

        try:
            if self._admit(scope, headers):
                await self.app(scope, receive, sending)
            else:
                await send_empty(sending, 204)
        except Exception as error:
            problem = problem_of(error)
            if problem.code == "broken" or problem.__cause__ is not None:
                self.records.failure(scope, problem.__cause__ or error)
            if status == 0:
                await send_problem(sending, problem, scope["method"])
        finally:
            self.records.request(scope, status, perf_counter() - started)

    def _admit(self, scope: Scope, headers: Headers) -> bool:
        """True if the request may go on, False if it is an allowed preflight; Problem otherwise."""
        check_host(scope, headers, self.settings)
        self.buckets.take(client_of(scope))
        foreign = self._foreign(headers)
        if scope["method"] == "OPTIONS" and b"access-control-request-method" in headers:
            if foreign is None:
                raise _origin_refused(headers)
            return False
        if foreign is None and scope["method"] not in ("GET", "HEAD", "OPTIONS"):
            raise _origin_refused(headers)
        check_token(scope, headers, self.settings)
        return True

    def _foreign(self, headers: Headers) -> str | None:
        """The Origin, "" when there is none or it is our own, None when it is not allowed."""
        origin = headers.get(b"origin", b"").decode("latin-1")
        own = f"http://{headers.get(b'host', b'').decode('latin-1')}"
        if origin in ("", own):
            return ""
        return origin if origin in self.settings.origins else None

    def _cors(self, headers: Headers) -> tuple[tuple[bytes, bytes], ...]:
        origin = self._foreign(headers)
        if not origin:
            return ()
        return (
            (b"access-control-allow-origin", origin.encode("latin-1")),
            (b"access-control-allow-methods", b"GET, POST"),
            (b"access-control-allow-headers", b"authorization, content-type, last-event-id"),
            (b"vary", b"origin"),
        )


def check_host(scope: Scope, headers: Headers, settings: Settings) -> None:
    """Problem unless exactly one Host header names an address or name we are bound to, with our port."""
    given = [value for name, value in scope["headers"] if name == b"host"]
    if len(given) != 1:
        raise Problem("malformed", f"{len(given)} Host headers", "Host", "send exactly one")
    host = given[0].decode("latin-1").lower()
    address, port = scope.get("server") or (settings.host, settings.port)
    if host not in known_hosts(settings, address, port):
        message = f"this service does not answer for host {host[:100]!r}"
        raise Problem(
            "host_refused",
            message,
            "Host",
            "use the address `serve` printed, or name it in QUARTERTURN_NAMES",
        )


@lru_cache(64)
def known_hosts(settings: Settings, address: str, port: int | None) -> frozenset[str]:
    """Host headers that are ours; `address` is the local end of the connection."""
    names = [settings.host.lower(), *(name.lower() for name in settings.names)]
    names.append(f"[{address}]" if ":" in address else address)
    if is_loopback(address):
        names += LOOPBACK_NAMES
    hosts = {name if _has_port(name) else f"{name}:{port}" for name in names}
    return frozenset(hosts) | {name for name in names if port in (80, 443)}


def _has_port(name: str) -> bool:
    return name.rpartition(":")[2].isdigit() and not name.endswith("]") and name.count(":") == 1


def check_token(scope: Scope, headers: Headers, settings: Settings) -> None:
    """Problem unless the request carries the token, if one is set; /healthz and the page are open."""
    if not settings.token or scope["path"] == "/healthz" or scope["path"].startswith("/overlay/"):
        return
    scheme, _, token = headers.get(b"authorization", b"").partition(b" ")
    if scheme.lower() != b"bearer" or not hmac.compare_digest(token.strip(), settings.token.encode()):
        message = "this service wants its token" if not token else "the token is not the one this service has"
        raise Problem(
            "token_needed",
            message,
            "Authorization",
            "send `Authorization: Bearer TOKEN`",
            headers=(("www-authenticate", "Bearer"),),
        )


def _origin_refused(headers: Headers) -> Problem:
    origin = headers.get(b"origin", b"").decode("latin-1")[:100]
    message = f"a page of {origin!r} may not post here"
    return Problem("origin_refused", message, "Origin", "name the origin in QUARTERTURN_ORIGINS")


def client_of(scope: Scope) -> str:
    """The client as the rate limit sees it: an IPv4 address, or an IPv6 network of one household (/64)."""
    address = (scope.get("client") or ("unknown", 0))[0]
    if ":" not in address:
        return str(address)
    parsed = ip_address(address.partition("%")[0])
    if isinstance(parsed, IPv6Address) and parsed.ipv4_mapped:
        return str(parsed.ipv4_mapped)
    return str(ip_network((parsed, 64), strict=False))


class Buckets:
    """A token bucket per client: `rate` tokens a second, at most `burst`."""

    def __init__(self, rate: float, burst: float) -> None:
        self.rate, self.burst = rate, burst
        self.levels: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, client: str) -> None:
        """Take one token; Problem `too_many` with the seconds to wait when there is none."""
        now = monotonic()
        level, then = self.levels.pop(client, (self.burst, now))
        level = min(self.burst, level + (now - then) * self.rate)
        allowed = level >= 1.0
        self.levels[client] = (level - 1.0 if allowed else level, now)
        if len(self.levels) > CLIENTS:
            self.levels.popitem(last=False)
        if not allowed:
            raise Problem(
                "too_many",
                f"more than {self.rate:g} requests a second from one client",
                None,
                "wait Retry-After seconds",
                retry=(1.0 - level) / self.rate,
            )


async def send_problem(send: Send, problem: Problem, method: str = "GET") -> None:
    """Answer with the one error shape."""
    body = problem.body()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    if problem.retry is not None:
        headers.append((b"retry-after", str(max(1, round(problem.retry + 0.5))).encode()))
    headers += [(name.encode(), value.encode()) for name, value in problem.headers]
    await send({"type": "http.response.start", "status": problem.status, "headers": headers})
    await send({"type": "http.response.body", "body": body if method != "HEAD" else b""})


async def send_empty(send: Send, status: int) -> None:
    """Answer with a status and nothing else."""
    await send({"type": "http.response.start", "status": status, "headers": [(b"content-length", b"0")]})
    await send({"type": "http.response.body", "body": b""})
