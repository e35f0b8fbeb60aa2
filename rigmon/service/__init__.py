"""The daemon: wires sources to monitors, to the log and to the outlets."""
