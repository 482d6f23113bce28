"""The private servers that other tests lean on."""

import smtplib
import socket
import subprocess
import sys
from urllib.parse import urlsplit

import psycopg
import pytest

from tests.docker.scratch import ROOT
from tests.servers import postgres, redis, smtp

MAIL = "Subject: A plan\r\n\r\nWater less.\r\n"


def listens(url: str) -> bool:
    parts = urlsplit(url)
    with socket.socket() as probe:
        return probe.connect_ex((parts.hostname, parts.port)) == 0


def test_postgres_servers_side_by_side_are_separate_and_end_with_their_block():
    with postgres() as one, postgres() as other:
        with psycopg.connect(one, autocommit=True) as connection:
            connection.execute("create database only_here")
        with psycopg.connect(other) as connection:
            names = {name for (name,) in connection.execute("select datname from pg_database")}
        assert "only_here" not in names
    assert not listens(one)
    assert not listens(other)


def test_redis_answers_and_ends_with_its_block():
    with redis() as url:
        assert listens(url)
    assert not listens(url)


@pytest.fixture
def mail():
    with smtp() as server, smtplib.SMTP(server.host, server.port, timeout=10) as client:
        yield server, client


def test_accepted_mail_is_kept_with_its_envelope(mail):
    server, client = mail
    client.sendmail("desk@shop.example", ["ada@grower.example"], MAIL)
    [delivery] = server.deliveries()
    assert delivery.sender == "desk@shop.example"
    assert delivery.recipients == ("ada@grower.example",)
    assert delivery.message["Subject"] == "A plan"
    server.clear()
    assert server.deliveries() == []


@pytest.mark.parametrize("code", [451, 550])
def test_a_chosen_recipient_is_refused_until_accepted_again(mail, code):
    server, client = mail
    server.answer("Ada@grower.example", code)
    with pytest.raises(smtplib.SMTPRecipientsRefused) as refused:
        client.sendmail("desk@shop.example", ["ada@grower.example"], MAIL)
    assert refused.value.recipients["ada@grower.example"][0] == code
    client.sendmail("desk@shop.example", ["bo@grower.example"], MAIL)
    server.answer("ada@grower.example", 250)
    client.sendmail("desk@shop.example", ["ada@grower.example"], MAIL)
    assert [delivery.recipients[0] for delivery in server.deliveries()] == [
        "bo@grower.example",
        "ada@grower.example",
    ]


def test_a_whole_mail_is_refused_after_its_text(mail):
    server, client = mail
    server.answer("ada@grower.example", 451, at="data")
    with pytest.raises(smtplib.SMTPDataError) as refused:
        client.sendmail("desk@shop.example", ["ada@grower.example"], MAIL)
    assert refused.value.smtp_code == 451
    assert server.deliveries() == []


def test_a_command_finds_the_addresses_and_its_status_comes_back():
    command = 'test -n "$DATABASE_URL" && test -n "$REDIS_URL" && exit 7'
    done = subprocess.run(
        [sys.executable, "-m", "tests.servers", "postgres", "redis", "--", "sh", "-c", command],
        cwd=ROOT,
        check=False,
        timeout=60,
    )
    assert done.returncode == 7
