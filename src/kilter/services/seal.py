"""
The seal of a shared file: an Ed25519 signature in front of the bytes that it covers.

The first line is a JSON object with the public key and the signature; all that follows is signed, byte for byte, with
words in front that no other use of the key would sign.
Source: RFC 8032, by the library `cryptography`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from kilter.measure.errors import BadInput, NotAvailable

EDITION = 1
HEAD = "kilter_shared"
MEANT_FOR = b"Kilter shared experience, edition 1\n"
KEY_BYTES, SIGNATURE_BYTES = 32, 64


@dataclass(frozen=True)
class Sealed:
    """
    A shared file whose seal was not looked at yet.

    Args:
        key: Public key that is said to have signed it, 64 hexadecimal digits.
        signature: 128 hexadecimal digits.
        content: What was signed.
    """

    key: str
    signature: str
    content: bytes


def new_key() -> tuple[bytes, str]:
    """A new private key as PEM text, and its public key in hexadecimal digits."""
    ed25519, serialization = _library()
    private = ed25519.Ed25519PrivateKey.generate()
    pem = private.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    return bytes(pem), public_key(bytes(pem))


def public_key(pem: bytes) -> str:
    """
    The public key of a private one, in hexadecimal digits.

    Raises:
        BadInput: It is no Ed25519 private key.
    """
    return str(_private(pem).public_key().public_bytes_raw().hex())


def sealed(content: bytes, pem: bytes) -> bytes:
    """
    The content with its seal in front.

    Raises:
        BadInput: The key is no Ed25519 private key.
    """
    signature = _private(pem).sign(MEANT_FOR + content).hex()
    head = {HEAD: EDITION, "key": public_key(pem), "signature": signature}
    return json.dumps(head, sort_keys=True).encode() + b"\n" + content


def opened(data: bytes, doing: str) -> Sealed:
    """
    The parts of a shared file, before the signature is checked.

    Raises:
        BadInput: It has no such seal.
    """
    first, line_end, content = data.partition(b"\n")
    try:
        head = json.loads(first)
        right = isinstance(head, dict) and set(head) == {HEAD, "key", "signature"} and head[HEAD] == EDITION
        key, signature = (bytes.fromhex(head[name]) for name in ("key", "signature")) if right else (b"", b"")
    except (ValueError, TypeError, RecursionError):
        right, key, signature = False, b"", b""
    if not right or not line_end or (len(key), len(signature)) != (KEY_BYTES, SIGNATURE_BYTES):
        raise BadInput(doing, "no seal in its first line", f"a file shared by Kilter, edition {EDITION}",
                       "Ask for the file again, as it was sent.")  # fmt: skip
    return Sealed(key.hex(), signature.hex(), content)


def check_signature(one: Sealed, doing: str) -> None:
    """
    Nothing, where the key that is named signed exactly this content.

    Raises:
        BadInput: It did not: the file was altered, or somebody pretends to be the holder of that key.
    """
    ed25519, _ = _library()
    from cryptography.exceptions import InvalidSignature

    try:
        key = ed25519.Ed25519PublicKey.from_public_bytes(bytes.fromhex(one.key))
        key.verify(bytes.fromhex(one.signature), MEANT_FOR + one.content)
    except InvalidSignature:
        raise BadInput(doing, "a signature that does not fit: the file was altered after it was signed, or forged",
                       "a file exactly as its key signed it", "Ask for it again, and say that this one is not right.",
                       ) from None  # fmt: skip


def _private(pem: bytes) -> Any:
    ed25519, serialization = _library()
    try:
        key = serialization.load_pem_private_key(pem, password=None)
    except (ValueError, TypeError):
        key = None
    if not isinstance(key, ed25519.Ed25519PrivateKey):
        raise BadInput("Cannot use the private key", "a text that is no Ed25519 key without password",
                       "the file that 'kilter share key' made", "Name that file.")  # fmt: skip
    return key


def _library() -> tuple[Any, Any]:
    try:
        from cryptography.hazmat.primitives import serialization
        from cryptography.hazmat.primitives.asymmetric import ed25519
    except ImportError:
        raise NotAvailable("Cannot sign or check a signature", "no library for it on this machine", "the extra 'share'",
                           "Install it with 'pip install kilter[share]'.") from None  # fmt: skip
    return ed25519, serialization
