"""Pages -> PDF bytes. The only home of reportlab."""
