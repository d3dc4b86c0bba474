"""Floor 5: the page for bench, site and client, and the labels, each one self-contained HTML file."""
