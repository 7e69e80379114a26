"""How gunicorn serves the site, for `start` and the full set alike: gunicorn -c python:plant.gunicorn plant.wsgi"""

import os

from plant.logging import logging_for

worker_class = "gthread"
workers = int(os.environ.get("WEB_CONCURRENCY", "2"))
threads = 4
timeout = 60
graceful_timeout = 15
# The control socket would lie in the home folder, where a second site of the same user meets the first.
control_socket_disable = True
# No query string: a search or a token in it is nobody's business in a log.
accesslog = "-"
access_log_format = "%(m)s %(U)s %(s)s %(B)s bytes %(M)s ms"
logconfig_dict = logging_for(human=os.environ.get("ASLEFT_DEBUG") == "1")
