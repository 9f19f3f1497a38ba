//! Invented maps small enough to be worked out by hand.
//!
//! Lengths: a degree of longitude at 50° north is 71,695.7 m on WGS 84 and one of latitude around 50.015° some 111,230 m,
//! worked out from the ellipsoid's radii (a = 6,378,137 m, e² = 0.00669438) with a pocket calculator.

use outyard_roads::{Network, RoadSum, Truck};

use crate::{data, made, place, sums};

const STEP: f64 = 716.957;
const NORTH: f64 = 1_112.3;

fn near(sum: Option<RoadSum>, minutes: f64, metres: f64) {
    let sum = sum.expect("a way leads there");
    assert!((sum.minutes() - minutes).abs() < 0.02, "{} min, by hand {minutes}", sum.minutes());
    assert!((f64::from(sum.metres) - metres).abs() < 3.0, "{} m, by hand {metres}", sum.metres);
}

#[test]
fn hollow_road_by_hand() {
    let network = Network::prepare(&data("hollow.osm"), Truck::USUAL).unwrap();
    let spots = [place(50.0, 10.0), place(50.03, 10.02), place(50.2, 10.205), place(50.0, 10.005)];
    let table = sums(&network, &spots);
    let at = |from: usize, to: usize| table[from * 4 + to];
    // Two steps of Hollow Road at 60 km/h, then three of Mill Lane (grade 2: 20 km/h) with a gate of 1.5 min.
    let minutes = 2.0 * STEP / 1000.0 + 3.0 * NORTH / 1000.0 * 3.0 + 1.5;
    near(at(0, 1), minutes, 2.0 * STEP + 3.0 * NORTH);
    near(at(1, 0), minutes, 2.0 * STEP + 3.0 * NORTH);
    // Half a step along one and the same stretch.
    near(at(0, 3), 0.5 * STEP / 1000.0, 0.5 * STEP);
    near(at(3, 0), 0.5 * STEP / 1000.0, 0.5 * STEP);
    assert_eq!(at(0, 2), None, "no road leads to Island Street");
    assert_eq!(at(2, 2), Some(RoadSum::default()));
    let counts = network.counts();
    assert_eq!((counts.ways, counts.gates, counts.missing_points), (4, 1, 0));
}

#[test]
fn the_same_map_reads_the_same_from_every_form() {
    let xml = Network::prepare(&data("hollow.osm"), Truck::USUAL).unwrap();
    // Both made from the XML by osmium 1.15: packed with dense nodes, and plain with single ones.
    for form in ["hollow.osm.pbf", "hollow-plain.osm.pbf"] {
        assert_eq!(Network::prepare(&data(form), Truck::USUAL).unwrap(), xml, "{form}");
    }
}

#[test]
fn the_way_is_told_road_by_road() {
    let network = Network::prepare(&data("hollow.osm"), Truck::USUAL).unwrap();
    let snaps = network.snap(&[place(50.0, 10.0), place(50.03, 10.021)], 1000.0);
    let way = network.way(snaps[0].as_ref().unwrap(), snaps[1].as_ref().unwrap()).unwrap();
    let told: Vec<(&str, u32)> = way.legs.iter().map(|leg| (leg.road.as_str(), leg.gates)).collect();
    assert_eq!(told, [("Hollow Road", 0), ("Mill Lane", 1), ("off the road", 0)]);
    // 0.001° east at 50.03° north: 71.65 m at 6 km/h.
    assert!((way.legs[2].metres - 71.65).abs() < 0.1 && way.legs[2].tenths == 430);
}

const CROSS: &str = "<node id='1' lat='50' lon='10'/><node id='2' lat='50' lon='10.01'/><node id='3' lat='50' lon='10.02'/>\
    <node id='4' lat='50.01' lon='10.01'/><node id='5' lat='49.99' lon='10.01'/>\
    <way id='1'><nd ref='1'/><nd ref='2'/><tag k='highway' v='secondary'/></way>\
    <way id='2'><nd ref='2'/><nd ref='3'/><tag k='highway' v='secondary'/></way>\
    <way id='3'><nd ref='2'/><nd ref='4'/><tag k='highway' v='secondary'/></way>\
    <way id='4'><nd ref='2'/><nd ref='5'/><tag k='highway' v='secondary'/></way>";
/// Ends of the four roads: west, east, north, south.
fn ends() -> [outyard_base::Place; 4] {
    [place(50.0, 10.0), place(50.0, 10.02), place(50.01, 10.01), place(49.99, 10.01)]
}

fn turn(from: u32, to: u32, word: &str, more: &str) -> String {
    format!(
        "<relation id='9'><member type='way' ref='{from}' role='from'/><member type='node' ref='2' role='via'/>\
         <member type='way' ref='{to}' role='to'/><tag k='type' v='restriction'/><tag k='restriction' v='{word}'/>{more}</relation>"
    )
}

#[test]
fn forbidden_turns_are_heeded_and_others_stay() {
    let free = sums(&made(CROSS, Truck::USUAL), &ends());
    let network = made(&(CROSS.to_owned() + &turn(1, 3, "no_left_turn", "")), Truck::USUAL);
    let table = sums(&network, &ends());
    assert_eq!(network.counts().turns, 1);
    for from in 0..4 {
        for to in 0..4 {
            let (had, has) = (free[from * 4 + to].unwrap().tenths, table[from * 4 + to].map(|sum| sum.tenths));
            if (from, to) == (0, 2) {
                // West to north: on to the end of the east or south road and back, since one may turn round there. The
                // east road is the shorter: two steps of 716.957 m more.
                let detour = had + 2 * 430;
                assert!(has.unwrap().abs_diff(detour) <= 2, "{has:?} against {detour}");
            } else {
                assert_eq!(has, Some(had), "from {from} to {to}");
            }
        }
    }
    let spared = made(&(CROSS.to_owned() + &turn(1, 3, "no_left_turn", "<tag k='except' v='bus;hgv'/>")), Truck::USUAL);
    assert_eq!((sums(&spared, &ends()), spared.counts().turns), (free, 0));
}

#[test]
fn an_only_turn_forbids_all_others() {
    let network = made(&(CROSS.to_owned() + &turn(1, 2, "only_straight_on", "")), Truck::USUAL);
    let table = sums(&network, &ends());
    let free = sums(&made(CROSS, Truck::USUAL), &ends());
    assert_eq!(table[1], free[1], "straight on");
    for to in [2, 3] {
        assert_eq!(table[to].unwrap().tenths, free[to].unwrap().tenths + 2 * free[1].unwrap().tenths / 2, "to {to}");
    }
    let over = CROSS.to_owned()
        + "<relation id='9'><member type='way' ref='1' role='from'/><member type='way' ref='2' role='via'/>\
           <member type='way' ref='3' role='to'/><tag k='type' v='restriction'/><tag k='restriction' v='no_u_turn'/></relation>";
    let network = made(&over, Truck::USUAL);
    assert_eq!((network.counts().turns, network.counts().turns_left_out), (0, 1));
    assert_eq!(network.notes()[0].code, "ROD-107");
}

#[test]
fn a_one_way_street_is_driven_one_way() {
    // A triangle: 1 to 2 one way, the way back over 3.
    let text = "<node id='1' lat='50' lon='10'/><node id='2' lat='50' lon='10.01'/><node id='3' lat='50.01' lon='10.005'/>\
        <way id='1'><nd ref='1'/><nd ref='2'/><tag k='highway' v='secondary'/><tag k='oneway' v='yes'/></way>\
        <way id='2'><nd ref='2'/><nd ref='3'/><nd ref='1'/><tag k='highway' v='secondary'/></way>";
    let table = sums(&made(text, Truck::USUAL), &[place(50.0, 10.0025), place(50.0, 10.0075)]);
    near(table[1], 0.5 * STEP / 1000.0, 0.5 * STEP);
    // On to 2, over 3 and in again at 1: half a step one way, and two sides of 0.005° by 0.01°.
    let side = (0.5 * STEP).hypot(1_112.3);
    near(table[2], (0.5 * STEP + 2.0 * side) / 1000.0, 0.5 * STEP + 2.0 * side);
}

#[test]
fn limits_and_private_land() {
    // From 0 over 1 to 4 and 5: straight over 2 (a low bridge), or round over 3.
    let square = |straight: &str| {
        format!(
            "<node id='0' lat='50' lon='9.99'/><node id='1' lat='50' lon='10'/><node id='2' lat='50' lon='10.01'/>\
             <node id='3' lat='50.01' lon='10.01'/><node id='4' lat='50' lon='10.02'/><node id='5' lat='50' lon='10.03'/>\
             <way id='1'><nd ref='1'/><nd ref='2'/><nd ref='4'/><tag k='highway' v='secondary'/>{straight}</way>\
             <way id='2'><nd ref='1'/><nd ref='3'/><nd ref='4'/><tag k='highway' v='secondary'/></way>\
             <way id='3'><nd ref='0'/><nd ref='1'/><tag k='highway' v='secondary'/></way>\
             <way id='4'><nd ref='4'/><nd ref='5'/><tag k='highway' v='secondary'/></way>"
        )
    };
    let straight = 4.0 * STEP;
    let round = 2.0 * STEP + 2.0 * STEP.hypot(1_112.3);
    let spots = [place(50.0, 9.99), place(50.0, 10.03), place(50.0, 10.01)];
    for (tag, metres) in [
        ("", straight),
        ("<tag k='maxheight' v='3.5'/>", round),
        ("<tag k='maxweight' v='7.5'/>", round),
        ("<tag k='maxwidth' v='2.6'/>", straight),
        ("<tag k='hgv' v='no'/>", round),
        // Not worth going through: counts for ten minutes more, and is used by those who go there.
        ("<tag k='access' v='private'/>", round),
    ] {
        let table = sums(&made(&square(tag), Truck::USUAL), &spots);
        near(table[1], metres / 1000.0, metres);
        if tag.contains("private") {
            near(table[2], 2.0 * STEP / 1000.0, 2.0 * STEP);
            near(table[2 * 3], 2.0 * STEP / 1000.0, 2.0 * STEP);
        }
    }
    let low = Truck { height_cm: 340, ..Truck::USUAL };
    near(sums(&made(&square("<tag k='maxheight' v='3.5'/>"), low), &spots)[1], straight / 1000.0, straight);
}

#[test]
fn rain_makes_a_soft_track_long_and_a_ford_impassable() {
    let text = "<node id='1' lat='50' lon='10'/><node id='2' lat='50' lon='10.01'/>\
        <node id='3' lat='50' lon='10.02'><tag k='ford' v='yes'/></node><node id='4' lat='50' lon='10.03'/>\
        <way id='1'><nd ref='1'/><nd ref='2'/><nd ref='3'/><nd ref='4'/><tag k='highway' v='track'/><tag k='tracktype' v='grade4'/></way>";
    let spots = [place(50.0, 10.0), place(50.0, 10.0199), place(50.0, 10.03)];
    let dry = sums(&made(text, Truck::USUAL), &spots);
    // Grade 4: 10 km/h; the ford takes a minute.
    near(dry[1], 1.99 * STEP / 1000.0 * 6.0, 1.99 * STEP);
    near(dry[2], 3.0 * STEP / 1000.0 * 6.0 + 1.0, 3.0 * STEP);
    let wet = sums(&made(text, Truck::USUAL.in_the_wet()), &spots);
    near(wet[1], 1.99 * STEP / 1000.0 * 12.0, 1.99 * STEP);
    assert_eq!(wet[2], None);
}

#[test]
fn a_ferry_takes_its_crossing_and_a_wait() {
    let text = "<node id='1' lat='50' lon='10'/><node id='2' lat='50' lon='10.01'/><node id='3' lat='50' lon='10.03'/>\
        <node id='4' lat='50' lon='10.04'/>\
        <way id='1'><nd ref='1'/><nd ref='2'/><tag k='highway' v='secondary'/></way>\
        <way id='2'><nd ref='2'/><nd ref='3'/><tag k='route' v='ferry'/><tag k='duration' v='00:20'/></way>\
        <way id='3'><nd ref='3'/><nd ref='4'/><tag k='highway' v='secondary'/></way>";
    let network = made(text, Truck::USUAL);
    let spots = [place(50.0, 10.0), place(50.0, 10.04)];
    near(sums(&network, &spots)[1], 2.0 * STEP / 1000.0 + 15.0 + 20.0, 4.0 * STEP);
    near(sums(&network, &spots)[2], 2.0 * STEP / 1000.0 + 15.0 + 20.0, 4.0 * STEP);
    let snaps = network.snap(&spots, 100.0);
    let way = network.way(snaps[0].as_ref().unwrap(), snaps[1].as_ref().unwrap()).unwrap();
    assert_eq!(way.legs.iter().map(|leg| leg.ferry).collect::<Vec<_>>(), [false, true, false]);
    // Nobody's yard lies on the water.
    assert_eq!(network.snap(&[place(50.0, 10.02)], 700.0), [None]);
}

#[test]
fn a_yard_goes_to_the_nearest_road_that_leads_somewhere() {
    // A long road with many junctions, and a scrap of a track beside it that leads nowhere.
    let mut text = String::new();
    for step in 0..30 {
        text += &format!("<node id='{step}' lat='50' lon='{}'/>", 10.0 + 0.001 * f64::from(step));
    }
    for step in 0..29 {
        text += &format!(
            "<way id='{step}'><nd ref='{step}'/><nd ref='{}'/><tag k='highway' v='tertiary'/></way>",
            step + 1
        );
    }
    text += "<node id='90' lat='50.001' lon='10.01'/><node id='91' lat='50.001' lon='10.011'/>\
        <way id='90'><nd ref='90'/><nd ref='91'/><tag k='highway' v='service'/><tag k='name' v='Nowhere'/></way>";
    let network = made(&text, Truck::USUAL);
    let beside = place(50.0009, 10.0105);
    let snap = network.snap(&[beside], 500.0)[0].clone().unwrap();
    assert!(snap.main && snap.road == "tertiary" && (snap.off_road - 100.1).abs() < 0.5, "{snap:?}");
    let snap = network.snap(&[beside], 50.0)[0].clone().unwrap();
    assert!(!snap.main && snap.road == "Nowhere", "{snap:?}");
    assert_eq!(network.snap(&[place(50.5, 10.0)], 500.0), [None]);
}

#[test]
fn a_road_that_comes_back_to_itself_and_a_gap_at_the_edge() {
    let text = "<node id='1' lat='50' lon='10'/><node id='2' lat='50' lon='10.01'/><node id='3' lat='50.001' lon='10.012'/>\
        <node id='4' lat='49.999' lon='10.012'/>\
        <way id='1'><nd ref='1'/><nd ref='2'/><tag k='highway' v='tertiary'/></way>\
        <way id='2'><nd ref='2'/><nd ref='3'/><nd ref='4'/><nd ref='2'/><tag k='highway' v='residential'/></way>\
        <way id='3'><nd ref='1'/><nd ref='77'/><nd ref='78'/><tag k='highway' v='tertiary'/></way>";
    let network = made(text, Truck::USUAL);
    assert_eq!(network.counts().missing_points, 2);
    assert_eq!(network.notes()[0].code, "ROD-102");
    let table = sums(&network, &[place(50.0, 10.0), place(50.0, 10.012)]);
    let (slant, right) = ((0.002 * 71_695.7_f64).hypot(111.2), 111.2);
    near(table[1], STEP / 1000.0 * 1.2 + (slant + right) / 1000.0 * 2.4, STEP + slant + right);
}
