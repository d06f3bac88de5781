"""How what the library writes down becomes an answer in words."""

import pytest

from dawnbrew.delivery.answers import Record, read_answer


def answer(*records):
    return read_answer([Record(text, True) for text in records], lambda text: text.replace("secret", "…"))


@pytest.mark.parametrize(
    ("trouble", "words"),
    [
        ("timed out", "no answer in time"),
        ("HTTPConnectionPool(host='h', port=1): Read timed out. (read timeout=10)", "no answer in time"),
        ("[Errno 111] Connection refused", "a connection that was refused"),
        ("[Errno -2] Name or service not known", "no server of that name"),
        ("[Errno -3] Temporary failure in name resolution", "no server of that name"),
        (
            "[SSL: CERTIFICATE_VERIFY_FAILED] certificate verify failed",
            "a certificate that cannot be trusted",
        ),
        ("[SSL: WRONG_VERSION_NUMBER] wrong version number", "no safe connection (TLS)"),
        ("STARTTLS extension not supported by server.", "no safe connection (TLS)"),
        ("[Errno 101] Network is unreachable", "no way to the server in the network"),
        ("Connection unexpectedly closed", "a connection that was cut off"),
        ("something new about secret", "something new about …"),
    ],
)
def test_trouble_on_the_line_is_told_in_plain_words_and_is_not_final(trouble, words):
    told = answer("A Connection error occurred.", f"Socket Exception: {trouble}")
    assert (told.text, told.is_final) == (words, False)


@pytest.mark.parametrize(
    ("trouble", "text", "is_final"),
    [
        ("(451, b'4.3.0 later')", "the answer 451 4.3.0 later", False),
        ("(550, b'5.1.1 no secret', 'f@x')", "the answer 550 5.1.1 no …", True),
        ('(535, b"it\'s wrong")', "the answer 535 it's wrong", True),
        ("{'a@x': (550, b'no'), 'b@x': (451, b'later')}", "the answer 451 later", False),
        ("{'a@x': (550, b'no'), 'b@x': (553, b'nor this')}", "the answer 553 nor this", True),
        (r"(550, b'one\ntwo \xc3\xbc')", "the answer 550 one two ü", True),
    ],
)
def test_a_mail_is_given_up_only_where_every_answer_is_final(trouble, text, is_final):
    told = answer(f"Socket Exception: {trouble}")
    assert (told.text, told.is_final) == (text, is_final)


def test_several_web_answers_are_final_only_where_each_of_them_is():
    assert answer("error=404", "error=410").is_final
    assert not answer("error=503", "error=404").is_final
    assert answer("forbidden, error=40301") == answer("error=403")


def test_without_any_record_there_still_is_an_answer():
    told = answer()
    assert told.text == "a failure without a reason"
    assert not told.is_final
