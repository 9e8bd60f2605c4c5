"""How numbers, dates and sentences are written: by a locale, and by a catalogue of messages.

Without a locale everything is written as in English with a decimal point, the hours to 24. A locale
(`locale` of reach.toml and waters.toml) sets the signs of numbers and the order of dates by the
Unicode CLDR, as Babel carries it; where `reachmap/locale` holds a catalogue of its language,
sentences and names of days are in that language, else in English.

The locale is state of the running context (PEP 567), set by `written_in` around what makes an
output: it changes no fact, and every sentence would otherwise take one more argument.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

NOTHING: Mapping[Any, Any] = MappingProxyType({})


@dataclass(frozen=True, slots=True, eq=False)
class Language:
    """A locale with its catalogue.

    Parameters
    ----------
    locale
        Identifier like ``de_CH``; empty for English as it has always been written.
    catalogue
        Translation of each message; of a pair of messages, singular and plural, a tuple of forms.
    rule
        Number of the plural form for a count.
    name
        BCP 47 tag of the language that sentences are in, for `lang` of a page.
    """

    locale: str = ""
    catalogue: Mapping[Any, Any] = field(default_factory=lambda: NOTHING)
    rule: str = "n != 1"
    name: str = "en"


ENGLISH = Language()
_NOW: ContextVar[Language] = ContextVar("language", default=ENGLISH)


def language() -> Language:
    """Return the language that is written now."""
    return _NOW.get()


@contextmanager
def written_in(chosen: str | Language) -> Iterator[Language]:
    """Write in a locale, like ``de_CH``, inside this context; empty for plain English."""
    found = chosen if isinstance(chosen, Language) else language_of(chosen)
    token = _NOW.set(found)
    try:
        yield found
    finally:
        _NOW.reset(token)


@cache
def language_of(locale: str) -> Language:
    """Return the language of a locale, with the catalogue that is kept for it.

    Raises
    ------
    ValueError
        If nobody knows that locale.
    """
    if not locale:
        return ENGLISH
    told = parsed(locale)
    for name in (told, told.partition("_")[0]):
        path = files("reachmap") / "locale" / f"{name}.po"
        if path.is_file():
            return read_catalogue(path.read_bytes(), told)
    return Language(told)


def parsed(locale: str) -> str:
    """Return a locale's identifier as Babel writes it, like ``de_CH`` for ``de-ch``.

    Raises
    ------
    ValueError
        If nobody knows it.
    """
    from babel import Locale, UnknownLocaleError

    try:
        return str(Locale.parse(locale.replace("-", "_")))
    except UnknownLocaleError as error:
        raise ValueError(str(error)) from None


def read_catalogue(text: bytes, locale: str) -> Language:
    """Return the language of a catalogue in gettext's PO format, as of a locale.

    Messages without a translation, or marked fuzzy, stay in English.
    """
    from io import BytesIO

    from babel.messages.pofile import read_po

    read = read_po(BytesIO(text), locale=locale)
    told = {one.id: one.string for one in read if one.id and not one.fuzzy and _whole(one.string)}
    return Language(locale, told, read.plural_expr, locale.replace("_", "-"))


def _whole(told: Any) -> bool:
    """Return whether a message is translated, in all its plural forms."""
    return all(told) if isinstance(told, tuple | list) else bool(told)


def tr(message: str, **values: object) -> str:
    """Return a message in the language written now, the names in braces filled in.

    Parameters
    ----------
    message
        The English sentence, a literal: what stands here goes into the catalogue. Names in braces
        are filled from `values`.

    Examples
    --------
    >>> tr("read on {day}", day="Sat 12 Jan")
    'read on Sat 12 Jan'
    """
    told = _NOW.get().catalogue.get(message, message)
    return str(told).format(**values) if values else str(told)


def tr_count(one: str, many: str, count: int, **values: object) -> str:
    """Return the message for a count, which fills ``{count}``.

    Examples
    --------
    >>> tr_count("{count} more run", "{count} more runs", 3)
    '3 more runs'
    """
    now = _NOW.get()
    forms = now.catalogue.get((one, many))
    if isinstance(forms, tuple | list):
        told = str(forms[min(_form(now.rule, count), len(forms) - 1)])
    else:
        told = one if count == 1 else many
    return told.format(count=number_text(count, 0), **values)


def noted(message: str) -> str:
    """Return a message as it stands: it goes into the catalogue and is translated where shown."""
    return message


def shown(messages: Mapping[str, str]) -> dict[str, str]:
    """Return messages by name in the language written now, for a page's own script."""
    return {name: tr(message) for name, message in messages.items()}


def _form(rule: str, count: int) -> int:
    """Return which plural form a catalogue's rule takes for a count."""
    from gettext import c2py

    return int(c2py(rule)(count))


def number_text(value: float, digits: int, *, grouped: bool = True) -> str:
    """Return a finite number with so many decimals, its signs by the locale.

    Examples
    --------
    >>> number_text(2400, 0), number_text(0.7, 1)
    ('2,400', '0.7')
    >>> with written_in("de_DE"):
    ...     number_text(2400.5, 1)
    '2.400,5'
    """
    comma = "," if grouped else ""
    plain = f"{value:{comma}.{digits}f}"
    return plain if not _NOW.get().locale else by_locale(plain)


def figures_text(value: float, figures: int = 6) -> str:
    """Return a number to so many significant figures, without needless zeros, by the locale.

    Examples
    --------
    >>> figures_text(2.0), figures_text(12.345, 3)
    ('2', '12.3')
    """
    return by_locale(f"{value:.{figures}g}")


def by_locale(plain: str) -> str:
    """Return a number written in English, like ``2,400.5``, with the signs of the locale.

    Only signs are changed, never digits: what an unknown number is written as stays as it is.
    """
    locale = _NOW.get().locale
    return plain.translate(_signs(locale)) if locale else plain


def number_tag() -> str:
    """Return the BCP 47 tag by which a page's own script writes numbers."""
    return _NOW.get().locale.replace("_", "-") or "en-US"


@cache
def _signs(locale: str) -> dict[int, str]:
    """Return the signs of a locale's numbers for those of English."""
    from babel.numbers import get_decimal_symbol, get_group_symbol

    return {ord("."): get_decimal_symbol(locale), ord(","): get_group_symbol(locale)}


def date_text(day: date, shape: str) -> str:
    """Return a date by the locale; without one as in ``Sat 12 Jan 2030``.

    Parameters
    ----------
    day
        The day.
    shape
        ``day`` (Sat 12 Jan), ``week`` (Sat 12), ``year`` (Sat 12 Jan 2030), ``name`` (Saturday),
        ``short`` (Sat) or ``plain`` (2030-01-12).

    Examples
    --------
    >>> date_text(date(2030, 1, 12), "day")
    'Sat 12 Jan'
    >>> with written_in("en_US"):
    ...     date_text(date(2030, 1, 12), "day")
    'Sat, Jan 12'
    """
    now = _NOW.get()
    if not now.locale:
        return day.strftime(_SHAPES[shape][0]).replace("  ", " ").replace(" 0", " ")
    from babel.dates import format_date, format_skeleton

    if shape == "name":
        return format_date(day, "EEEE", locale=_dates(now))
    return format_skeleton(_SHAPES[shape][1], day, locale=_dates(now))


_SHAPES = {
    "day": ("%a %d %b", "MMMEd"),
    "week": ("%a %d", "Ed"),
    "year": ("%a %d %b %Y", "yMMMEd"),
    "name": ("%A", "EEEE"),
    "short": ("%a", "E"),
    "plain": ("%Y-%m-%d", "yMMMd"),
}


@cache
def _dates(now: Language) -> str:
    """Return the locale of dates: English as written in that country where sentences are English.

    A sentence in English with names of days in another language would be neither.
    """
    from babel import Locale

    if now.catalogue or now.locale.startswith("en"):
        return now.locale
    own = f"en_{Locale.parse(now.locale).territory or '001'}"
    return own if own in _known() else "en_001"


@cache
def _known() -> frozenset[str]:
    """Return the locales that Babel knows."""
    from babel.localedata import locale_identifiers

    return frozenset(locale_identifiers())


def moment_text(when: datetime) -> str:
    """Return a day with its year and the time, like Sat 12 Jan 2030 08:00."""
    return f"{date_text(when.date(), 'year')} {when:%H:%M}"
