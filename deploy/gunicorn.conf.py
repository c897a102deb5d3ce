"""gunicorn for production: `BAILEE_HOME=/srv/bailee gunicorn --config deploy/gunicorn.conf.py 'bailee.app:wsgi()'`.

On SQLite keep one worker: one process writes. On PostgreSQL use one worker a core; every worker runs a sequencer, and the lease row
lets one of them lead. TLS belongs to the proxy in front, or to `certfile` and `keyfile` here.
"""

import os

bind = os.environ.get("LISTEN", "127.0.0.1:8765")
worker_class = "gthread"
workers = int(os.environ.get("WORKERS", "1"))
threads = 4
timeout = 60
graceful_timeout = 30  # requests in progress are finished before a worker ends
keepalive = 15
accesslog = None  # addresses and times of people are not kept; the ledger records what matters
forwarded_allow_ips = "127.0.0.1"
