"""Write a Document as pages for the screen: SVG 1.1, with the few of SVG 2 that `picture_pages` names."""
