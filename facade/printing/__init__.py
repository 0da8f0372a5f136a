"""Paper and printers: sizes, margins, and what a printer gets wrong."""
