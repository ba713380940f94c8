"""Load reportlab, in its only home, and write pages as the bytes of a PDF."""

from arranger.resources import undisturbed

with undisturbed("uharfbuzz", "platform"):  # which tells it on which Python it runs: it can do without
    import reportlab.pdfbase.pdfdoc
    import reportlab.pdfbase.ttfonts  # noqa: F401
