"""A Flask route that reads a JSON body and answers with as many bytes as the real one: the floor to compare with."""

import os

import orjson
from flask import Flask, Response, request

ANSWER = orjson.dumps({"ok": "x" * (int(os.environ.get("NULL_ANSWER_BYTES", "5000")) - 9)})


def create_app() -> Flask:
    """The application with its two routes."""
    app = Flask(__name__)

    @app.post("/null")
    def null() -> Response:
        orjson.loads(request.get_data())
        return Response(ANSWER, mimetype="application/json")

    @app.get("/healthz")
    def healthz() -> str:
        return "ok"

    return app
