"""Arrangement -> pages of placed items. Knows no PDF: widths come through the protocol in `metrics`."""
