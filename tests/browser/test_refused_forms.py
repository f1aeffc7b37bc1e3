"""A form that comes back on a phone: what is to be put right is in sight and has the focus, on a long page too."""

from __future__ import annotations

from playwright.sync_api import expect

from tests import people


def test_a_decision_that_was_refused_is_met_where_it_was_made(device, site):
    studio = people.studio()
    people.teacher(studio)
    horn = people.horn(studio)
    phone = device()
    phone.expected.append("status of 409")
    phone.sign_in("marisa")
    page = phone.open(f"/studio/students/{horn.pk}/gate/")
    page.select_option("#by-hand [name=kind]", "open")
    page.select_option("#by-hand [name=stage]", "2")
    page.fill("#by-hand [name=words]", "For the concert.")
    page.click("#by-hand button")
    error = page.locator(".field-error")
    expect(error).to_have_text("The stage below it is shut. Open that one first.")
    expect(error).to_be_in_viewport()
    expect(error).to_be_focused()
    expect(page.locator("#by-hand [name=words]")).to_have_value("For the concert.")
