"""Sealing and vouching, held to the examples that the standards print."""

from __future__ import annotations

from cryptography.hazmat.primitives.asymmetric import ec

from assignments.push import base64url, curve, sealing, vouching
from tests import push_service

RFC_8291_A = {  # RFC 8291, section 5 and appendix A
    "text": b"When I grow up, I want to be a watermelon",
    "our_secret": "yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw",
    "our_public": "BP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A8",
    "their_secret": "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94",
    "their_public": "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4",
    "auth": "BTBZMqHH6r4Tts7J_aSIgg",
    "salt": "DGv6ra1nlYgDCS1FRnbzlw",
    "sealed": "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8w"
    "EqKK6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN",
}
RFC_8188_31 = ("yqdlZ-tYemfogSmv7Ws5PQ", "I1BsxtFttlv3u_Oo94xnmwAAEAAA-NAVub2qFgBEuQKRapoZu-IxkIva3MEB1PD-ly8Thjg")
RFC_8188_32 = (  # two records of 25 bytes, the first with padding, the key named “a1”
    "BO3ZVPxUlnLORbVGMpbT1Q",
    "uNCkWiNYzKTnBN9ji3-qWAAAABkCYTHOG8chz_gnvgOqdGYovxyjuqRyJFjEDyoF1Fvkj6hQPdPHI51OEUKEpgz3SsLWIqS_uA",
)
RFC_8292_24 = (  # section 2.4: the token, and the key that signed it
    "eyJ0eXAiOiJKV1QiLCJhbGciOiJFUzI1NiJ9.eyJhdWQiOiJodHRwczovL3B1c2guZXhhbXBsZS5uZXQiLCJleHAiOjE0NTM1MjM3NjgsInN1YiI6"
    "Im1haWx0bzpwdXNoQGV4YW1wbGUuY29tIn0.i3CYb7t4xfxCDquptFOepC9GAu_HLGkMlMuCGSK2rpiUfnK9ojFwDXb1JrErtmysazNjjvW2L9OkSS"
    "HzvoD1oA",
    "BA1Hxzyi1RUM1b5wjxsn7nGxAszw2u61m164i3MrAIxHF6YK5h4SDYic-dRuU_RCPCfA5aq9ojSwk5Y2EmClBPs",
)
SITE = "a secret of fifty characters or more, as a site has one"


def private(secret: str) -> ec.EllipticCurvePrivateKey:
    return ec.derive_private_key(int.from_bytes(base64url.decode(secret), "big"), curve.CURVE)


def test_the_example_of_rfc_8291_is_sealed_byte_by_byte():
    ours, their_public = private(RFC_8291_A["our_secret"]), base64url.decode(RFC_8291_A["their_public"])
    assert base64url.encode(curve.of_key(ours)) == RFC_8291_A["our_public"]
    auth, salt = base64url.decode(RFC_8291_A["auth"]), base64url.decode(RFC_8291_A["salt"])
    sealed = sealing.sealed_with(RFC_8291_A["text"], public=their_public, auth=auth, ours=ours, salt=salt)
    assert base64url.encode(sealed) == RFC_8291_A["sealed"]


def test_the_first_example_of_rfc_8188_is_coded_byte_by_byte():
    secret, coded = map(base64url.decode, RFC_8188_31)
    assert sealing.coded(b"I am the walrus", secret=secret, salt=coded[:16], key_id=b"") == coded


def test_the_tests_own_browser_reads_what_the_standards_print():
    browser = push_service.Browser(private(RFC_8291_A["their_secret"]), base64url.decode(RFC_8291_A["auth"]))
    assert browser.unsealed(base64url.decode(RFC_8291_A["sealed"])) == RFC_8291_A["text"]
    for secret, coded in (RFC_8188_31, RFC_8188_32):
        assert push_service.decoded(base64url.decode(coded), base64url.decode(secret)) == b"I am the walrus"


def test_each_message_is_sealed_with_a_key_and_salt_of_its_own():
    browser = push_service.Browser()
    twice = [sealing.sealed(b"Time.", public=browser.public, auth=browser.auth) for _time in range(2)]
    assert twice[0][:86] != twice[1][:86]
    assert [browser.unsealed(one) for one in twice] == [b"Time."] * 2


def test_the_tests_own_service_believes_the_token_that_rfc_8292_prints_and_no_other():
    token, key = RFC_8292_24
    claims = {"aud": "https://push.example.net", "exp": 1453523768, "sub": "mailto:push@example.com"}
    assert push_service.vouched(f"vapid t={token}, k={key}") == claims
    assert push_service.vouched(f"vapid t={token[:-8]}AAAAAAAA, k={key}") is None


def test_a_token_is_for_one_service_and_half_a_day():
    header = vouching.authorization(
        "https://push.example.net:8443/p/one?two", vouching.key_of_site(SITE), contact="https://tones.example.org",
        now_s=1_453_480_568.9,
    )  # fmt: skip
    claims = {"aud": "https://push.example.net:8443", "exp": 1_453_523_768, "sub": "https://tones.example.org"}
    assert push_service.vouched(header) == claims
    assert header.endswith(f"k={vouching.public_text(vouching.key_of_site(SITE))}")


def test_a_site_keeps_its_key_as_long_as_it_keeps_its_secret():
    keys = [vouching.public_text(vouching.key_of_site(secret)) for secret in (SITE, SITE, SITE[1:])]
    assert keys[0] == keys[1] != keys[2]
    assert len(base64url.decode(keys[0])) == curve.POINT_BYTES
