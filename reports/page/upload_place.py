"""The place on the page where recordings are dropped or chosen.

Task: one upload element with a button that the keyboard reaches and names that a screen reader says. Each
file is sent as soon as it is chosen; ``arrived`` is told of it, ``refused`` and ``failed`` get names, a line
each.
Units: bytes. Signs: none.
"""

from __future__ import annotations

from html import escape

from nicegui import ui

from reports.page import page_words as words
from reports.page.uploads import LIMIT_BYTES
from reports.page.view import Handler

_REFUSED_JS = "(list) => emit(list.map((one) => one.file.name).join('\\n'))"
_FAILED_JS = "(info) => emit(info.files.map((one) => one.name).join('\\n'))"
_CHOOSE = f"""
<div class="drop">
  <span>{escape(words.DROP_HERE)}</span>
  <q-btn no-caps label="{escape(words.CHOOSE_FILES)}" @click="props.pickFiles"></q-btn>
  <label class="unseen">{escape(words.CHOSEN_FILES)}<q-uploader-add-trigger></q-uploader-add-trigger></label>
  <span role="status">{{{{ props.isUploading ? props.uploadProgressLabel : "" }}}}</span>
</div>
"""
_SENDING = """
<p v-for="file in props.files" :key="file.__key">{{ file.name }} {{ file.__progressLabel }}</p>
"""


def upload_place(arrived: Handler, *, refused: Handler, failed: Handler) -> ui.upload:
    """Put it here."""
    upload = ui.upload(multiple=True, auto_upload=True, max_file_size=LIMIT_BYTES, on_upload=arrived)
    upload.props("flat bordered no-thumbnails")
    upload.on("rejected", refused, js_handler=_REFUSED_JS)
    upload.on("failed", failed, js_handler=_FAILED_JS)
    upload.add_slot("header", _CHOOSE)
    upload.add_slot("list", _SENDING)
    return upload
