"""The entry point for a web server, which loads every page before its first visitor comes."""

import os

from django.core.wsgi import get_wsgi_application

from program.watching import trace
from services_inventory.bulk import keep_little
from services_inventory.page_loading import every_view
from services_inventory.uploading import uploads_let_go

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "program.settings")
trace()  # it takes its place before everything else that sees a request
application = get_wsgi_application()
every_view()
keep_little()
uploads_let_go()
