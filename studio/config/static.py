"""Static files of a production site: named by their content, so that a browser may keep them for ever."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedStatic(CompressedManifestStaticFilesStorage):
    support_js_module_import_aggregation = True  # modules import each other by name: those names change too
