"""Writing a case without an editor: what to ask next, how an answer is read, and how it gets into the file.

Pure but for `draft` (the file being written) and `papers` (photos and papers beside it); nothing here knows a terminal.
"""
