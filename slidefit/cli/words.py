"""What the terminal calls the settings, fields and actions that a message refers to."""

from __future__ import annotations

from slidefit.facts import Action, Field, Setting

# settings whose flag is not the argument's own name
FLAGS = {
    "mapping": "--map",
    "values": "--value",
    "market_names": "--market-name",
    "path": "--book",
    "fit": "--fit",
    "region": "--region",
    "allow_unseen": "--allow-unseen",
    "weight_lb": "--weight",
    "weights_lb": "--weight",
    "sexes": "--sex",
    "months": "--month",
}
COMMANDS = {
    "add": "slidefit add FILE",
    "export": "slidefit export OUT.csv --book FILE",
    "fit": "slidefit fit",
    "undo": "slidefit undo BATCH",
    "rename_market": "slidefit book rename-market OLD NEW",
    "add_quotes": "slidefit futures add FILE",
    "read_region": "slidefit region check FILE",
    "update": "slidefit region update FILE",
    "make_region": "slidefit region make NAME",
}


class TerminalDoor:
    """Flags and commands."""

    def setting(self, part: Setting) -> str:
        """Return ``--flag`` or ``--flag value``."""
        flag = FLAGS.get(part.name, f"--{part.name.replace('_', '-')}")
        value = f'"{part.value}"' if " " in part.value and "=" in part.value else part.value
        return f"{flag} {value}" if value else flag

    def field(self, part: Field) -> str:
        """Return ``key`` or ``key = value``."""
        return f"{part.name} = {part.value}" if part.value else part.name

    def action(self, part: Action) -> str:
        """Return the command."""
        return COMMANDS.get(part.name, f"slidefit {part.name.replace('_', ' ')}")
