"""Hand-outs by e-mail over SMTP: text with the page beside it, one letter a person."""

from __future__ import annotations

import smtplib
import ssl
from collections.abc import Mapping
from email.message import EmailMessage
from email.utils import make_msgid, parseaddr
from pathlib import Path
from typing import Any

from adapters.outlets.options import only_known, option, secret
from shared.errors import OutletFailed
from shared.parcel import Parcel

TIMEOUT_S = 20.0
SECURITY = ("starttls", "tls", "none")
KNOWN = {"host", "port", "from", "to", "security", "user", "password_env"}
LOCAL = ("localhost", "127.0.0.1", "::1")


class MailOutlet:
    """Letters over SMTP (port `shared.ports.Outlet`)."""

    def __init__(
        self, name: str, host: str, port: int, sender: str, manager: str, security: str, user: str, password: str
    ) -> None:  # fmt: skip
        self.name = name
        self._host, self._port, self._sender, self._manager = host, port, sender, manager
        self._security, self._user, self._password = security, user, password

    def hand_out(self, parcel: Parcel) -> None:
        """Send one letter; a person without an address is passed over, since paper or a phone reaches them."""
        to = parcel.address or (self._manager if parcel.to == "all" else "")
        if not to:
            return
        letter = EmailMessage()
        letter["Subject"] = " ".join(parcel.title.split())
        letter["From"], letter["To"] = self._sender, to
        letter["Message-ID"] = make_msgid(domain=parseaddr(self._sender)[1].partition("@")[2] or "localhost")
        letter.set_content(parcel.text)
        if parcel.html:
            letter.add_alternative(parcel.html, subtype="html")
        try:
            self._send(letter)
        except smtplib.SMTPRecipientsRefused as error:
            code = next(iter(error.recipients.values()))[0]
            raise OutletFailed(
                f"{self.name}: {self._host} refuses the address {to} ({code}).", again=400 <= code < 500
            ) from error
        except smtplib.SMTPAuthenticationError as error:
            raise OutletFailed(
                f"{self.name}: {self._host} does not accept user and password.", again=False
            ) from error
        except smtplib.SMTPResponseException as error:
            raise OutletFailed(
                f"{self.name}: {self._host} answered {error.smtp_code}.", again=400 <= error.smtp_code < 500
            ) from error
        except (smtplib.SMTPException, OSError) as error:
            raise OutletFailed(
                f"{self.name}: {self._host}:{self._port} cannot be reached ({type(error).__name__})."
            ) from error

    def _send(self, letter: EmailMessage) -> None:
        safe = ssl.create_default_context()
        if self._security == "tls":
            line: smtplib.SMTP = smtplib.SMTP_SSL(self._host, self._port, timeout=TIMEOUT_S, context=safe)
        else:
            line = smtplib.SMTP(self._host, self._port, timeout=TIMEOUT_S)
        with line:
            if self._security == "starttls":
                line.starttls(context=safe)
            if self._user:
                line.login(self._user, self._password)
            line.send_message(letter)


def open_mail(
    name: str, farm_folder: Path, options: Mapping[str, Any], environment: Mapping[str, str]
) -> MailOutlet:
    """Open a mail server; options ``host, port, from, to, security, user, password_env``."""
    only_known(name, options, KNOWN)
    host = option(name, options, "host", 'a mail server such as "mail.example.org"')
    security = option(name, options, "security", ", ".join(SECURITY), "none" if host in LOCAL else "starttls")
    if security not in SECURITY:
        raise OutletFailed(
            f"farm.toml: outlet {name!r}: options.security {security!r} is not known; allowed: {', '.join(SECURITY)}.",
            again=False,
        )
    user = option(name, options, "user", "", "")
    if user and security == "none" and host not in LOCAL:
        raise OutletFailed(
            f"farm.toml: outlet {name!r}: options.security 'none' would send the password in the open; allowed with a user: starttls, tls.",
            again=False,
        )
    usual = {"tls": "465", "starttls": "587", "none": "25"}[security]
    port = option(name, options, "port", "a port such as 587", usual)
    if not port.isdigit() or not 0 < int(port) < 65536:
        raise OutletFailed(
            f"farm.toml: outlet {name!r}: options.port {port!r} is no port; allowed: a number such as 587.",
            again=False,
        )
    sender = option(name, options, "from", 'an address such as "office@example.org"')
    if "@" not in parseaddr(sender)[1]:
        raise OutletFailed(
            f"farm.toml: outlet {name!r}: options.from {sender!r} is no address; allowed: an address such as office@example.org.",
            again=False,
        )
    return MailOutlet(
        name, host, int(port), sender, option(name, options, "to", "", ""), security, user,
        secret(name, options, "password_env", environment),
    )  # fmt: skip
