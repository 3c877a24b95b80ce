"""Files that ship with the package: the demo, the starter."""
