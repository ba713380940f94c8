"""Serve a folder of static files on this machine, as any web space does, and count what goes over the wire."""

from __future__ import annotations

import gzip
import http.server
import threading
import zlib
from pathlib import Path

TYPES = {
    ".wasm": "application/wasm",
    ".mjs": "text/javascript",
    ".js": "text/javascript",
    ".webmanifest": "application/manifest+json",
}
PACKED = (".js", ".mjs", ".wasm", ".html", ".css", ".json", ".svg", ".ttf", ".webmanifest")


class StaticFiles:
    """A server for a folder; `sent` are the bytes of its answers, packed as web spaces do."""

    def __init__(self, folder: Path) -> None:
        self.sent = 0
        own = self

        class Handler(http.server.SimpleHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def __init__(self, *given: object) -> None:
                super().__init__(*given, directory=str(folder))  # type: ignore[arg-type]

            def do_GET(self) -> None:
                path = Path(self.translate_path(self.path))
                path = path / "index.html" if path.is_dir() else path
                if not path.is_file():
                    self.send_error(404)
                    return
                data = path.read_bytes()
                tag = f'"{zlib.crc32(data):08x}"'
                if self.headers.get("if-none-match") == tag:  # it is known already (RFC 9110, 13.1.2)
                    self.send_response(304)
                    self.end_headers()
                    return
                self.send_response(200)
                self.send_header("etag", tag)
                self.send_header("content-type", TYPES.get(path.suffix, self.guess_type(str(path))))
                if path.suffix in PACKED:
                    data = gzip.compress(data, 6, mtime=0)
                    self.send_header("content-encoding", "gzip")
                self.send_header("content-length", str(len(data)))
                self.end_headers()
                own.sent += len(data)
                self.wfile.write(data)

            def log_message(self, *_: object) -> None:
                pass

        self._server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.address = f"http://127.0.0.1:{self._server.server_address[1]}/"
        self.port = self._server.server_address[1]
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def stop(self) -> None:
        self._server.shutdown()
        self._server.server_close()
