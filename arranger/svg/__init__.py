"""Write a Document as pages for the screen (SVG 1.1, with the few properties of SVG 2 that are named in `picture_pages`)."""
