"""Lay out an arrangement on pages, as placed items. Knows no PDF: widths come through `text.Metrics`."""
