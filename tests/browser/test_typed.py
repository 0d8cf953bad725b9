"""What was typed or ticked into a form that was refused stands there again."""


def test_ticks_stand_again_in_a_form_that_sends_to_its_own_page(town, signed_in):
    page = signed_in("compliance")
    page.goto(f"{town.address}/work/review/")
    second = page.locator("input[name=record]").nth(1)
    ticked = second.input_value()
    second.check()
    with page.expect_navigation():
        page.get_by_role("button", name="Return the ticked records").click()
    assert page.locator(f"input[name=record][value='{ticked}']").is_checked()
    assert page.locator("input[name=record]:checked").count() == 1
