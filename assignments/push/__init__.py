"""Web push: a short message to one browser, sealed for it, vouched for by this site, posted to its maker's service.

Knows neither rows nor people. Whoever imports ``sealing`` or ``vouching`` loads elliptic curves (11 MB, 0.07 s): the
web process when somebody first opens the page that offers notes on a device, and only where the site's owner has
switched them on; the sweeper when there is one to tell.
"""
