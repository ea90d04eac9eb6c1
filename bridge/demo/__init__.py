"""The recorded round of the invented cabin, played through the very bridge that runs in a real one."""
