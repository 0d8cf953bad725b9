"""The entry point for a web server, which loads every page before its first visitor comes."""

import os
import sys

from django.core.wsgi import get_wsgi_application

from program.watching import trace
from services_inventory.bulk import keep_little
from services_inventory.page_loading import every_view
from services_inventory.uploading import uploads_let_go

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "program.settings")
trace()  # it takes its place before everything else that sees a request
# A kept page waits for the record a few times and works little between: each time it would stand
# behind the 5 ms that a thread making a long page may go on for.
sys.setswitchinterval(0.0005)
application = get_wsgi_application()
every_view()
keep_little()
uploads_let_go()
