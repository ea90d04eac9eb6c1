"""Why a broker cannot be reached, in words; TLS as the settings ask for."""

from __future__ import annotations

import socket
import ssl

from bridge.errors import ConfigError
from bridge.settings import BrokerSettings

FAILURE = 0x80  #: reason codes from here on say that something failed (OASIS MQTT 5.0, 2.4)
TAKEN_OVER, RETAIN_REFUSED, QOS_REFUSED = 0x8E, 0x9A, 0x9B  #: MQTT 5 reason codes (OASIS MQTT 5.0, table 2-6)
REFUSALS = {
    0x86: "wrong user name or password",
    0x87: "not authorised: user name, password or certificate is not accepted",
    0x85: "client identifier refused",
    0x84: "the broker does not speak this protocol version",
    0x8A: "banned by the broker",
    TAKEN_OVER: "session taken over: another client uses the same identifier",
}


class _TidySocket(ssl.SSLSocket):
    """A socket that closes itself when the handshake fails; the library would leave it to the garbage collector."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except BaseException:
            self.close()
            raise


def tls_context(settings: BrokerSettings) -> ssl.SSLContext:
    """Return TLS as the settings ask for; a file that cannot be read is a configuration error."""
    try:
        context = ssl.create_default_context(cafile=str(settings.ca_file) if settings.ca_file else None)
        context.sslsocket_class = _TidySocket
        if settings.certificate_file:
            context.load_cert_chain(settings.certificate_file, settings.key_file)
    except (OSError, ssl.SSLError) as error:
        files = [str(f) for f in (settings.ca_file, settings.certificate_file, settings.key_file) if f]
        raise ConfigError(f"broker: cannot use the TLS files {', '.join(files)}: {error}") from error
    return context


def describe(error: BaseException, settings: BrokerSettings) -> tuple[str, bool]:
    """Return words for a failed connection, and whether trying again soon is pointless."""
    where = f"{settings.host}:{settings.port}"
    if isinstance(error, ssl.SSLCertVerificationError):
        if "expired" in error.verify_message:
            return f"the certificate of {where} has expired", True
        return f"the certificate of {where} is not trusted ({error.verify_message})", True
    if isinstance(error, ssl.SSLError):
        return f"TLS with {where} failed ({error.reason or error})", True
    if isinstance(error, socket.gaierror):
        return f"no host is called {settings.host}", False
    if isinstance(error, ConnectionRefusedError):
        return f"refused: nothing listens at {where}", False
    if isinstance(error, TimeoutError):
        return f"no answer from {where}", False
    return f"{where}: {error}", False
