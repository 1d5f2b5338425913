"""One file a command; `ui.commands.group` lists them."""
