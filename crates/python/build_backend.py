"""The build of the package: maturin's, once the module of questions is written from the schema."""

from maturin import *  # noqa: F403

import questions

questions.TARGET.write_text(questions.written(), "utf-8")
