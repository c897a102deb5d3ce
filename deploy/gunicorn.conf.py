"""gunicorn for production: `BAILEE_LEDGER=/srv/bailee gunicorn --config deploy/gunicorn.conf.py
'bailee.app:wsgi()'`.

On SQLite keep one worker: one process writes. On PostgreSQL use one worker a core; every worker runs a
sequencer, and the lease row lets one of them lead. TLS, and whatever deploy/README.md says must be limited
for all processes together, belong to the proxy in front. The worker reads requests as `bailee serve` does;
threads and deadlines are in settings.toml.
"""

import os

from bailee.serving.worker import child_exit  # noqa: F401 - a hook that gunicorn calls

bind = os.environ.get("LISTEN", "127.0.0.1:8765")
worker_class = "bailee.serving.worker.Worker"
workers = int(os.environ.get("WORKERS", "1"))
timeout = 60
graceful_timeout = 30  # requests in progress are finished before a worker ends
control_socket_disable = True  # its folder is the user's home, which the unit does not open for writing
accesslog = None  # addresses and times of people are not kept; the ledger records what matters
