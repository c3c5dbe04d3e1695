"""Temperature pictures: register an object to a known-good board and compare their parts."""
