"""`incircuit bench`."""

from __future__ import annotations

import os

import click


@click.command(epilog="Example: incircuit bench boards/pump-drive/gate-drive.board --open")
@click.argument("board", required=False)
@click.option("--port", type=click.IntRange(0, 65535),
              help="Where to listen (default: 8417, or any free port where that is taken; 0: any free port).")
@click.option("--open", "browse", is_flag=True, help="Open the page in the browser.")
@click.option("--share", is_flag=True,
              help="Also for other machines on the local network, such as a phone: each enters a code.")
@click.option("--instrument", metavar="RESOURCE",
              help="A bench meter to take readings from: TCPIP::192.168.1.20::INSTR (extra instrument).")
@click.option("--visa", default="@py", metavar="LIBRARY", help="The VISA library to reach it (default: @py).")
@click.option("--results", default="", metavar="FILE",
              help="Where results of drills are kept (default: as drill keeps them).")
def bench(board: str | None, port: int | None, browse: bool, share: bool, instrument: str | None,
          visa: str, results: str) -> None:
    """The whole job on one page in the browser: describe, see, read, judge, next.

    BOARD is a board file or a folder (default: this folder). The page reads and writes the board and
    readings files of that folder only, the same files as the other commands. It answers on this machine
    only; Ctrl-C ends it. With --share it answers other machines too, unencrypted: only on a network you
    trust.
    """
    from dataclasses import replace

    from incircuit.interrupts import answered
    from incircuit.web.instrument import open_instrument
    from incircuit.web.server import addresses, listen, opened_on, serve

    opened = replace(opened_on(board or "", share),
                     results=results or os.path.join(click.get_app_dir("incircuit"), "drill.jsonl"))
    if instrument:
        opened = replace(opened, instrument=open_instrument(instrument, visa))
    sock = listen(port, share)
    places = addresses(sock.getsockname()[1], share)

    def ready() -> None:
        click.echo(f"bench page of {opened.folder}")
        for place in places:
            click.echo(f"  {place}")
        if opened.instrument:
            click.echo(f"readings from {opened.instrument.name} too")
        if share:
            click.echo("Other machines on this network can reach it and have to enter the code above. "
                       "It is not encrypted: only on a network you trust.")
        click.echo("Unplug, discharge and verify before you touch the board. Ctrl-C ends the page.")
        if browse:
            click.launch(places[-1])

    try:
        serve(opened, sock, click.echo, ready)
    except KeyboardInterrupt:
        answered()
        click.echo("bench page closed; every reading it showed is in its file")
