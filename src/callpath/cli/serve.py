"""``callpath serve``: the page, on this machine unless told otherwise."""

from __future__ import annotations

import ipaddress
from typing import Annotated

import typer

from callpath.errors import CallpathError

__all__ = ["serve"]


def serve(
    host: Annotated[
        str, typer.Option("--host", metavar="ADDRESS", help="Where to listen; 0.0.0.0 opens it to the network.")
    ] = "127.0.0.1",
    port: Annotated[
        int, typer.Option("--port", metavar="NUMBER", min=0, max=65535, help="0 takes any free one.")
    ] = 8240,
    team: Annotated[
        bool, typer.Option("--team", help="For an office: people log in, and see the jobs that are theirs to see.")
    ] = False,
) -> int:
    """Open the page in which jobs are built, asked and kept; Ctrl-C stops it.

    Records are kept in a file in the user's data folder, or in the database that CALLPATH_DATABASE_URL names.
    Without --host only this machine can open it. With it, the address that is printed holds a key, and only who has it comes in.
    With --team people have accounts in place of the key; the first of them is made with a key that is printed.
    """
    import secrets
    import socket

    import uvicorn

    from callpath.records.people import has_accounts
    from callpath.records.store import default_url, open_store
    from callpath.web.app import create_app

    local = _is_local(host)
    store = open_store()
    # Alone on this machine nobody else can knock; on a network everybody can.
    with store.reading() as session:
        needs_key = not has_accounts(session) if team else not local
    key = secrets.token_urlsafe(12) if needs_key else None
    app = create_app(store, names=("localhost", "127.0.0.1", "::1") if local else None, door_key=key, team=team)
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # Named as TCP, so that asyncio sends at once what it has: without that every page waits 40 ms for an acknowledgement.
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        # Whoever opens the address as soon as it is printed waits in line rather than being refused.
        listener.listen(128)
    except OSError as error:
        listener.close()
        raise CallpathError(f"cannot listen on {host}, port {port}: {(error.strerror or '').lower()}") from None
    shown = f"http://{_reachable(host)}:{listener.getsockname()[1]}/"
    typer.echo(f"callpath is at {shown}{f'enter?key={key}' if key and not team else ''}")
    if key and team:
        typer.echo(f"the first account is made there with this key: {key}")
    typer.echo(f"records: {default_url().render_as_string(hide_password=True)}")
    typer.echo(
        "Ctrl-C stops it." if local or team else "Whoever has this address may change every job. Ctrl-C stops it."
    )
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        timeout_keep_alive=75,
        server_header=False,
        h11_max_incomplete_event_size=65536,
    )
    try:
        uvicorn.Server(config).run(sockets=[listener])
    finally:
        listener.close()
        store.close()
    return 0


def _is_local(host: str) -> bool:
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _reachable(host: str) -> str:
    """Return a name by which others reach an address: this machine's own where it listens everywhere."""
    import socket

    if host in ("0.0.0.0", "::"):
        try:
            with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
                # Nothing is sent; the system only says which of its addresses it would send from.
                probe.connect(("192.0.2.1", 9))
                return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()
    return f"[{host}]" if ":" in host else host
