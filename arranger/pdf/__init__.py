"""Pages -> PDF bytes. The only home of reportlab, which is loaded here, whatever the environment would have it do."""

from arranger.resources import undisturbed

with undisturbed("uharfbuzz"):
    import reportlab.pdfbase.pdfdoc
    import reportlab.pdfbase.ttfonts  # noqa: F401
