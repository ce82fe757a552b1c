"""The floors, and the same work by marshmallow both ways; each a WSGI application that gunicorn serves as it serves ours."""

import orjson
import work
from flask import Flask, Response, request

from platemargin_api.app import create_app

BODY = b'{"status":"ok"}'


def bare():
    """Return a constant with no framework."""
    headers = [("Content-Type", "application/json"), ("Content-Length", str(len(BODY)))]

    def application(environ, start_response):
        environ["wsgi.input"].read()
        start_response("200 OK", headers)
        return [BODY]

    return application


def flask():
    """Return Flask with a constant, an echo, the least that a calculation takes, and the readings by marshmallow both ways."""
    app = Flask("floors")

    @app.post("/constant")
    def constant():
        return Response(BODY, content_type="application/json")

    @app.post("/echo")
    def echo():
        return Response(orjson.dumps(orjson.loads(request.get_data())), content_type="application/json")

    @app.post("/least/<name>")
    def least(name):
        """The request decoded, computed, and its result written, by what the service does that with; nothing else."""
        served = work.registry().calculations[name]
        asked = served.read(request.get_data(), ()).request
        if served.one_row is not None:
            result, *_ = served.one_row(asked)
        else:
            result = served.offered.run(**asked)
        return Response(orjson.dumps({"result": served.write(result)}), content_type="application/json")

    @app.post("/readings")
    def readings():
        loaded = work.READINGS.request.load(orjson.loads(request.get_data()))
        result = work.READINGS.response.dump(work.left(loaded["readings"]))
        return Response(orjson.dumps({"result": result}), content_type="application/json")

    return app


def service():
    """Return the service, with the readings alone beside what is installed."""
    return create_app(work.registry())
