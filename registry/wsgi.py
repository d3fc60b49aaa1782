"""The site, as a web server calls it."""

import gc
import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "registry.settings")
application = get_wsgi_application()
get_resolver().url_patterns  # noqa: B018  # every page is loaded now, not by the first who asks
# What is loaded stays as long as the process. Looked through for what may be thrown away, it would
# hold up one page in a hundred for a fifth of a second.
gc.collect()
gc.freeze()
