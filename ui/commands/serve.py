"""``serve``: the screens in a browser on this machine."""

from __future__ import annotations

import click

from ui.commands.exits import NOTHING_DONE
from ui.commands.ports import first_free, is_free
from ui.commands.where import catalog_options


@click.command()
@catalog_options
@click.option("--port", type=click.IntRange(1, 65535), default=8501, show_default=True)
def serve(*, catalog_url: str | None, pictures: str | None, port: int) -> None:
    """Serve the screens at http://127.0.0.1:PORT until interrupted (Ctrl+C)."""
    if not is_free(port):
        click.echo(
            f"Port {port} is in use by another program. Choose another one with --port, for "
            f"example --port {first_free(port)}.",
            err=True,
        )
        click.get_current_context().exit(NOTHING_DONE)
    from ui.serving import serve as serve_screens  # Streamlit takes a second to import

    serve_screens(catalog_url=catalog_url, pictures=pictures, port=port)
