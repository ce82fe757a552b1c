"""The service's own server settings, for those who start gunicorn themselves: `gunicorn -c docker/gunicorn.conf.py`."""  # noqa: INP001  # no package

from platemargin_api.server import *  # noqa: F403  # gunicorn takes this file's global names as its settings
