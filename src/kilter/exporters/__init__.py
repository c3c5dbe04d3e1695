"""Writers of what leaves Kilter: pages to print, and files for other programs."""
