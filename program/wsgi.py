"""The entry point for a web server, which loads every page before its first visitor comes."""

import os

from django.core.wsgi import get_wsgi_application

from services_inventory.page_loading import every_view
from services_inventory.uploading import uploads_let_go

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "program.settings")
application = get_wsgi_application()
every_view()
uploads_let_go()
