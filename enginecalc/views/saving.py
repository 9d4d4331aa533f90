"""Links on a page that save a file which was made there."""

import base64
import html


def link(name, kind, data):
    """Return a link that saves `data` as a file of that name; `kind` as in "application/pdf"."""
    data, name = base64.b64encode(data).decode(), html.escape(name, quote=True)
    return f'<a download="{name}" href="data:{kind};base64,{data}">Save {name}</a>'
