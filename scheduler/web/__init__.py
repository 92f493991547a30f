"""The pages: a site for the manager, and a page for each person of the crew. Server-rendered; works without any other host.

`app` puts it together, `door` says who may come in, `views_*` say what a page shows, `pages_*` and `crew` answer requests.
"""
