"""A person as the record knows one: a key and a login. Name and address stand apart and can be erased."""

from __future__ import annotations

import secrets
from typing import Any

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.db import models


def new_key() -> str:
    """A key that tells nothing about the person."""
    return f"p-{secrets.token_hex(4)}"


class People(BaseUserManager):
    """Looks people up by login; they are made by the verb `add_person` alone, which writes the journal."""


class Person(AbstractBaseUser, PermissionsMixin):
    """
    Somebody who works with the record.

    Args:
        key: Stands for the person everywhere in the record.
        login: What is typed at the door.
        is_active: Whether the door opens.
    """

    key = models.CharField(max_length=16, unique=True, default=new_key)
    login = models.CharField(max_length=60, unique=True)
    is_active = models.BooleanField(default=True)
    joined = models.DateTimeField()

    USERNAME_FIELD = "login"
    REQUIRED_FIELDS: list[str] = []
    objects = People()

    def __str__(self) -> str:
        return self.name

    @property
    def name(self) -> str:
        """The person's name, or the key where personal data was erased."""
        personal = getattr(self, "personal", None)
        return personal.name if personal is not None and personal.name else self.key

    def roles(self) -> tuple[str, ...]:
        """Names of the roles; none for a person whose door is closed."""
        if not self.is_active:
            return ()
        if not hasattr(self, "_roles"):
            self._roles: tuple[str, ...] = tuple(self.groups.order_by("pk").values_list("name", flat=True))
        return self._roles

    def refresh_from_db(self, *args: Any, **named: Any) -> None:
        """Also forgets the roles."""
        self.__dict__.pop("_roles", None)
        super().refresh_from_db(*args, **named)


class PersonalData(models.Model):
    """What may be erased: nothing in the record or its journal depends on it."""

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="personal", primary_key=True)
    name = models.CharField(max_length=120)
    email = models.CharField(max_length=200, blank=True, default="")
    telephone = models.CharField(max_length=60, blank=True, default="")
    note = models.TextField(blank=True, default="")


class AccessToken(models.Model):
    """A key for a program that acts for a person; the token itself is shown once and kept only as a digest."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="tokens")
    name = models.CharField(max_length=80)
    digest = models.CharField(max_length=64, unique=True)
    created = models.DateTimeField()
    last_used = models.DateTimeField(null=True, blank=True)
    revoked = models.DateTimeField(null=True, blank=True)


class LoginAttempt(models.Model):
    """A try at the door, for the delay after wrong ones; personal data, pruned by age."""

    login = models.CharField(max_length=60, db_index=True)
    address = models.CharField(max_length=64, db_index=True)
    at = models.DateTimeField(db_index=True)
    succeeded = models.BooleanField()
