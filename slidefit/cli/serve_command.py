"""The command that starts the page in a browser."""

from __future__ import annotations

import click

from slidefit.cli.demo_command import demo_data
from slidefit.cli.speaking import book_option, fit_option


@click.command()
@book_option
@fit_option
@click.option(
    "--port", default=8765, show_default=True, type=click.IntRange(0, 65535), help="Port; 0 takes a free one."
)
@click.option(
    "--regions",
    default=".",
    show_default=True,
    type=click.Path(file_okay=False),
    help="Folder of region files.",
)
@click.option("--open", "open_browser", is_flag=True, help="Open the page in the browser.")
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to listen on, such as 0.0.0.0 for a phone on the same network; a key is then asked for.",
)
def serve(book: str, fit_path: str, regions: str, port: int, open_browser: bool, host: str) -> None:
    """Start the page: records, slide, and keep or sell, by mouse or phone."""
    from pathlib import Path

    from slidefit.web.server import serve as run_page
    from slidefit.web.settings import Settings

    plan = demo_data() / "plan.toml"
    settings = Settings(
        book=Path(book),
        fit=Path(fit_path),
        regions=Path(regions),
        example_plan=plan if plan.exists() else None,
        host=host,
        port=port,
    )
    run_page(settings, open_browser=open_browser, tell=lambda line: click.echo(line, err=True))
